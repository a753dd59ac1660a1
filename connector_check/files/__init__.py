"""Bytes and text: reading, writing, locking, formats. No word about connectors."""
