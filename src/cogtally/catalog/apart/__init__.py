"""Which wheels tell the sets of a family apart, and a key to follow.

Leaves how it is told to `show.catalog`.
"""

from cogtally.catalog.apart.key import (
    Branch as Branch,
    Key as Key,
    Node as Node,
    identification_key as identification_key,
)
from cogtally.catalog.apart.sets import (
    MEND as MEND,
    NOTICE as NOTICE,
    TELL as TELL,
    Apart as Apart,
    Choice as Choice,
    Close as Close,
    tell_apart as tell_apart,
)
