"""The water itself: ions, conductivity, temperature, hardness, carbonate."""
