"""How fast and how well the parts with numbers do, each beside its reference measured in the same run.

`python -m tests.bench` prints the table and writes nothing else; words after it choose modules by name. A
module here has a function ``rows() -> list[Row]``.
"""
