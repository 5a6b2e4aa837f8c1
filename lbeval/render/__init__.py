"""From notebook to PDF: execution, conversion to Typst, compilation. The only importer of these tools."""
