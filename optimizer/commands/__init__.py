"""The commands, each a module of its own: its options, its reader, its answer, and how that is printed and written.

A module is loaded when its command is asked for, for its help text too. What only an answer needs is therefore loaded inside
`read` and `answer`: that, and nothing else, is why imports stand inside functions here.
"""
