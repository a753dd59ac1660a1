"""Records over one job or many, for the renderers to show."""
