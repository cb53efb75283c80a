"""The desk: everything that the commands do, in a browser, over the files of one folder of this machine.

It has no rules, words or tables of its own. What is asked goes as the words of a command to a process of its own (`worker`),
comes back as the JSON of the answer, and is shown by the sentences and tables of `report`.
"""
