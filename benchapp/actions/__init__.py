"""The verbs of the tool: facts are always stored, requests may be refused in words and then change nothing."""
