"""The report of a record, as PDF and HTML, and exports of a sweep."""
