"""`cogtally catalog`: what its commands share with others.

Leaves each command to its own file.
"""

from cogtally.cli.catalog.add import refuse_demo, say_warnings, whole_text
from cogtally.cli.catalog.editor import edit_file, file_beside

__all__ = ["edit_file", "file_beside", "refuse_demo", "say_warnings", "whole_text"]
