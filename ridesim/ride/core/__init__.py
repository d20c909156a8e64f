"""The compiled core: records, rates, stepper, phases. Plain numbers in SI units, no pydantic models."""
