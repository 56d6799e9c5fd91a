"""The screens: a Streamlit app over a built database. It shows what pipeline.figures gives and reckons nothing."""
