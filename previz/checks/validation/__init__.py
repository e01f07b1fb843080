"""Checks of the program against figures from outside: what it reproduces, and how closely.

Each module yields `Check` records for one field; none knows of the others. `GROUPS` lists them in
the order of the table. Sources are as far as they could be read: 'from memory' marks a figure whose
document was not at hand, 'common practice, no source' a habit of the trade.
"""
