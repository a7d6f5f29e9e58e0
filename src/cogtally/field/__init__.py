"""The page for a telephone: a catalog, the law of a loose piece and a bag, without a network.

Knows what the page has to be told (`tables_of`), how it is put together and written (`asked_place`,
`write_page`). What the page then does stands in `page/`: HTML, CSS and plain JavaScript modules,
the law of a loose piece in `page/law.js`. Which catalog, and what is wanted, is left to the caller.
"""

from cogtally.field.tables import Said as Said, Wish as Wish, tables_of as tables_of
from cogtally.field.writing import (
    asked_place as asked_place,
    page_html as page_html,
    write_page as write_page,
)
