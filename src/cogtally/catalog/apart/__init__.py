"""Which wheels tell the sets of a family apart, and a key to follow.

Leaves how it is told to `show.catalog`.
"""

from cogtally.catalog.apart.key import Branch, Key, Node, identification_key
from cogtally.catalog.apart.sets import MEND, NOTICE, TELL, Apart, Choice, Close, tell_apart

__all__ = [
    "MEND",
    "NOTICE",
    "TELL",
    "Apart",
    "Branch",
    "Choice",
    "Close",
    "Key",
    "Node",
    "identification_key",
    "tell_apart",
]
