"""The command in the mechanic's hand: ask, judge, report, and keep what waits for signal.

`cli` and its `commands_*` parts, with `console`, are the only modules that print, exit,
read the clock or mint ids; `gateway` is the only door to the network. All else is values.
"""
