"""The repair record: frozen Pydantic models of the wire format, and the ground floor.

Shapes and bounds are checked here; that a code exists is the catalogue's business.
"""
