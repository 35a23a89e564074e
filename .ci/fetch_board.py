"""Open the board's address and look for widgets in the body; a 200 alone proves nothing."""

import sys
import urllib.request

with urllib.request.urlopen(sys.argv[1], timeout=180) as answer:
    body = answer.read().decode("utf-8")
wanted = "application/vnd.jupyter.widget-view+json"
if wanted not in body:
    print(body[-2000:])
    sys.exit(f"{sys.argv[1]} answered {answer.status} but holds no widget")
print(f"{sys.argv[1]}: {answer.status}, {len(body):,} characters, widgets found")
