"""The server of the page: routes, templates, downloads."""
