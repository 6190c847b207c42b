"""Weather to evapotranspiration, demand of water, reservoirs and visits."""
