"""What a shell offers while somebody types: commands, options and the catalog's own words.

Leaves what the words of a catalog are to `catalog.words`.
"""

from cogtally.cli.completion.words import completing, keep_words

__all__ = ["completing", "keep_words"]
