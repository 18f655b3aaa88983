"""What did happen: measures, plots and the report."""
