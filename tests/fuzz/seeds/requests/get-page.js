wGET /page.js HTTP/1.1

