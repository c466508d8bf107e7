"""Pure formulas: SI numbers in, SI numbers out. No framework, no clock, no I/O.

Arguments are refused before any arithmetic with a ValueError that names the argument and its range. Where an argument
may be an array it says so; arrays broadcast against each other. A source marked "from memory" was not seen again in
its original when it was written down, and must not be printed as an authority.
"""
