"""Print each `bash` block of a README as one line; the checks run them as they stand."""

import re
import sys
from pathlib import Path

text = Path(sys.argv[1]).read_text(encoding="utf-8")
for block in re.findall(r"^```bash\n(.*?)^```", text, flags=re.DOTALL | re.MULTILINE)[:2]:
    print(block.strip())
