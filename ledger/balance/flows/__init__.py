"""What a period's tickets brought, took and lost: the columns of the statement, and the normal loss allowed."""
