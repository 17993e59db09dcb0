"""The chemistry of tap water, pure and for many waters at once.

water          a water as its ions; hardness and its parts
faults         water that cannot be, in words
speciation     ion pairs, activities and pH; species, solvent: the data behind it
conductivity   EC from ions; mobility: its data; methods: other published ways, for comparison
temperature    EC referred to 25 C; kcl: calibration standards
carbonate      constants, pH, carbon dioxide
saturation     calcite index and precipitation potential, cold and in a boiler
treatment      exchange, blending, what the result means for metal
"""
