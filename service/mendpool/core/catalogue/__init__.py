"""The trade's knowledge: YAML that a mechanic can read and correct, its types, its checks.

`files` is the only module of the core that reads from disk, through importlib.resources.
"""
