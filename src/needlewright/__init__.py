"""Needlewright: the workbench of the technician who rebuilds vehicle instrument clusters."""

__version__ = "0.1.0"
