"""One module a kind of response: a season's records become one number per unit."""
