"""Makes strangers of browsers on the server's own machine: only `localhost` is the PC then, its one name the network's.

Python reads this file at its start, where its folder stands in PYTHONPATH; the project itself must stand there too.
"""

from benchapp.network import addresses

addresses.is_own = lambda address: False
