"""Normal loss as the tickets of counted months show it, beside what is stated, and what could be stated instead."""
