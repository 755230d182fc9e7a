"""The balance: what is missing, area by area, beyond what measurement and normal loss explain."""
