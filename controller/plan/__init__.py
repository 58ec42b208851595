"""Turn a recipe and tonight's tank into ordered steps, amounts and times; pure arithmetic and rules."""
