"""Published worked examples, worked again with the code as installed.

``checks.json`` holds each example: its source, how its values were come by, what is given, what
the source prints (``published``, met to ``published_tolerance``) and what forty-digit arithmetic by
two unrelated routes gives (``exact``, met to 1e-9 of the quantity's unit).

>>> from linkage import published
>>> rows = published.verify()
>>> print(published.report(rows))  # doctest: +SKIP
"""

from linkage.published.rows import Row
from linkage.published.verify import KINDS, report, tally, verify

__all__ = ["KINDS", "Row", "report", "tally", "verify"]
