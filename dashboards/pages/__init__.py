"""One file a page: query, then a view, then a template."""
