"""Reports as tables, CSV and pages."""
