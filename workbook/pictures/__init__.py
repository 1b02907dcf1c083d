"""Tables and curves read from pictures and from pages of PDFs."""
