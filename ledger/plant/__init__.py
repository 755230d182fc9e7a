"""The set-up of a plant: areas, operations, scales, methods, materials, people, prices, and its calendar."""
