"""The first page of a summary: what everybody reads, laid out as one page for print and for a browser."""
