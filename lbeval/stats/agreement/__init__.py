"""Agreement and reliability of raters, on arrays with missing cells."""
