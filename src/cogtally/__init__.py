"""Cogtally names a gearbox set from counted teeth."""

from __future__ import annotations

__version__ = "0.1.0"
