"""Pages and feeds over HTTP."""
