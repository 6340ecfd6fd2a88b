"""From a complaint in anyone's words to the trade's terms.

`words` cuts a text up, `spelling` mends single words, `phrases` recognises what is said,
`reader` puts them together. Nothing here knows a symptom by name.
"""
