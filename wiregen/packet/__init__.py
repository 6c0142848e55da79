"""From charts and reports to text, tables and pages."""
