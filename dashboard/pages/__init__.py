"""One file per page; Streamlit runs them as scripts."""
