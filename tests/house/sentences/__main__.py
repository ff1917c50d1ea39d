"""The counts, lists and catalogues of sentences from the command line."""

from tests.house.sentences import main

raise SystemExit(main())
