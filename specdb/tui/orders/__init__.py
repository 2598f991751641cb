"""The place Orders: what is ordered, entered, waited for."""
