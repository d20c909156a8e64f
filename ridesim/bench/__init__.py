"""From measurements to parameters: a motor's constants, its heat, a block's capacity and resistance, each with its band."""
