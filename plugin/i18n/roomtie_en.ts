<?xml version="1.0" encoding="utf-8"?>
<!DOCTYPE TS>
<TS version="2.1" language="en" sourcelanguage="en">
  <context>
    <name>Roomtie</name>
    <message numerus="yes">
      <source>%n tie(s)</source>
      <translation>
        <numerusform>%n tie</numerusform>
        <numerusform>%n ties</numerusform>
      </translation>
    </message>
    <message numerus="yes">
      <source>%n of them not used</source>
      <translation>
        <numerusform>%n of them not used</numerusform>
        <numerusform>%n of them not used</numerusform>
      </translation>
    </message>
  </context>
</TS>
