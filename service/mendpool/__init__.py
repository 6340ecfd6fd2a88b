"""mendpool: a shared knowledge base of anonymised generator repairs.

A route translates, a use case decides the order of work, the store remembers, the
index finds, the core knows. Nothing here imports the field command.
"""

__version__ = "0.1.0"
