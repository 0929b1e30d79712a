"""The page on this computer that takes a workbook and gives the results back."""
