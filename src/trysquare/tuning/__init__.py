"""The running machine set from measurements: values and arrays in, values with uncertainty and advice out."""
