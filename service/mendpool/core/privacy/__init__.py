"""Takes out of free text what names or finds anyone, and leaves the trade's figures alone.

`shield` marks what belongs to the trade, `patterns` finds what has a shape (numbers to
ring, addresses, links, days), `places` and `names` find what only its neighbours give
away, `scrub` puts them together. Words are judged by lists that the caller hands in.
"""
