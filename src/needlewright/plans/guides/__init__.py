"""Guides: how each operation of the catalogue is done, and how a cluster is put back."""
