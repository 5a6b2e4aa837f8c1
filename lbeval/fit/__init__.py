"""Tables in, frozen results with intervals out."""
