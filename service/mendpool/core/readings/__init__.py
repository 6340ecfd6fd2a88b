"""Readings: understood from words, converted, judged, and set side by side.

`parse.understand` turns what was written into a reading or refuses it with the reason,
`find.find_readings` picks readings out of a free complaint, `judge.judge` gives a verdict,
`together.together` says what several point at, and the `workings` are the trade's sums.
What words mean, which bands hold and what patterns there are is in the catalogue's YAML.
"""
