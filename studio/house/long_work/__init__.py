"""Work that takes longer than a request: asked for on a page, done by a worker beside the server, its result kept.

`kinds.py`: what can be asked for; the rooms above register theirs. `asking.py`: ask and cancel. `doing.py`: one piece
of work from beginning to end, carried by a task of the task library. `hearts.py`: the worker's heartbeat, and what is
taken up again when a heart has stopped. `files.py`: what came of it. `beside.py`: the worker beside the server.

Done once: a piece of work is begun, and ended, by a conditional update that names its attempt; what it changes in the
studio (`Came.also`) is in the transaction that ends it. A killed worker's attempt writes nothing any more once another
has taken the work up.
"""
