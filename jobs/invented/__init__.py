"""An invented heating firm, drawn from a seed: its customers, stock, prices and eight years of work.

Nothing in it is real. No Django here: `firm.make` gives tables of rows, `firm.write` puts them into CSV files that
any firm could import, and `firm.truth` tells the laws that they were drawn from.
"""
