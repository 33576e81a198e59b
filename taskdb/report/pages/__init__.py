"""Published pages: plain files that open by a double click, with what they say in the languages that they speak."""
