"""HTTP: routes translate, and nothing else; problems, sign-in and limits live beside them."""
