"""Charts as specifications and as SVG or PNG, for page, mail and report."""
