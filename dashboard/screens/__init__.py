"""One file per page, run by app.py. (A folder named pages would make Streamlit run them without app.py.)"""
