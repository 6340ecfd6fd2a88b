"""The calculations of the trade by name: inputs in, an answer with its formula out.

`registry.work` is the door: it reads the inputs strictly (numbers, or text with a unit), does
the sum, tells the outcome in the catalogue's words and puts the cautions first. The formulas
themselves are plain functions in `readings.workings*`.
"""
