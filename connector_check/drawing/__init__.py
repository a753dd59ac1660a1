"""A connector as views with marks, then as SVG or as text."""
