"""The chapters of docs/ inside the program, and the glossary's lines for words of the page."""
