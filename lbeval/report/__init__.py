"""Words, tables, figures and pages made from results; nothing is computed here."""
