"""A record as text, table or page. Renderers compute nothing."""
