"""A second model of a loop, made from the files and from published laws alone: it imports nothing of the program it checks.

It reads rig files and catalogs by itself (`reading`), holds each law by name with its source (`laws`), and finds the flow
where the pump's head is what the loop takes (`loop`). Where the program has a choice of laws, this one takes others.
"""
