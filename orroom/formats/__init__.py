"""A summary written out: Markdown, HTML, PDF, tables, JSON, and charts."""
