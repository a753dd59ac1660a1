"""Renderers: each turns a finished record into text, CSV, Markdown or JSON and computes nothing."""
