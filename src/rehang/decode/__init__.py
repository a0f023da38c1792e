"""Files from strangers, read where they can do no harm: photos, PDFs, tables, square codes.

A picture of a hundred kilobytes may unpack to gigabytes or keep a reader busy for minutes, and a
torn one may bring the reader down. So ``apart`` reads each in a process of its own, with bounds on
its time and memory, that is put an end to when it goes past them. What the readers themselves do is
in ``pictures``, ``pdfs``, ``tables`` and ``codes``, which work in the process that calls them. Nothing is
loaded here: that process begins with this module.
"""
