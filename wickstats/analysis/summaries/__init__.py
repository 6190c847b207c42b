"""One module a kind of response: records to one number per unit."""
